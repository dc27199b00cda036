"""How far do scores move once names are told: opening, sheets and answers of the open flight."""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
