"""The printed sheet: its parts, pages, type, labels, and the PDF."""
