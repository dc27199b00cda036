"""Tables, refusals, results and sentences: what a question is asked and answered with."""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
