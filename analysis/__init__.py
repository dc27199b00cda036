"""The statistics of a tasting panel: tidy tables in, results or figures out.

One file holds one family of questions and is imported by its name, for
example ``from .anova import anova``. This room knows no
file, form or session and imports neither `forms` nor `panel`.
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
