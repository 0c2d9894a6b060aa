"""What readings should be: one module a subject, each expectation registered under the name data use."""
