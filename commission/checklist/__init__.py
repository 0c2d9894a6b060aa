"""From plant and sheet to stages, steps and what each reading should be."""
