"""What may a report claim? One error budget for everything that it says about the bottles."""
