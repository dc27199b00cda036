"""What is asked: kinds of questions, the scorecard, the vocabulary, one assessor's sheet."""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
