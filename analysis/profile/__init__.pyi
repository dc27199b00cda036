from .dominance_over_time import dominance as dominance
from .dominance_over_time import least as least
from .intensity_over_time import curve as curve
from .intensity_over_time import time_intensity as time_intensity
from .liking_of_people import liked_best as liked_best
from .liking_of_people import moved as moved
from .named_scores import open_against_blind as open_against_blind
from .nose_and_palate import palate_against_nose as palate_against_nose
