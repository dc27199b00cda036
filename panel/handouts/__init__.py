"""What is handed out: sheets for assessors, lists and labels for the server."""
