"""What every part of this room needs: refusals, words, problems, tables as people have them."""
