"""The only code that writes builds. Each module is imported by name."""
