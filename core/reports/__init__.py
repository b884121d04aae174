"""What leaves the program for the workshop: pages, labels, templates, tables and drawings."""
