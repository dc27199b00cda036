from .scorecard import change as change
from .scorecard import default_scorecard as default_scorecard
from .term_vocabulary import extend as extend
from .term_vocabulary import vocabulary as vocabulary
