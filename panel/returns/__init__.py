"""What comes back: taken in, kept, reviewed, counted."""
