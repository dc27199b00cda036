"""What is asked: kinds of questions, the scorecard, the vocabulary, one assessor's sheet."""
