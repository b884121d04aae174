"""The four stages of the work, one module (or family of modules) each."""
