"""Tables, refusals, results and sentences: what a question is asked and answered with."""
