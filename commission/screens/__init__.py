"""The app: screens that call the rooms and show what they return."""
