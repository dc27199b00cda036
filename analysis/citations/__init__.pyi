from .citation_counts import citations as citations
from .cochran_q import cochran as cochran
from .noted_faults import Controls as Controls
from .noted_faults import Rule as Rule
from .noted_faults import faults as faults
from .ticked_words import descriptors as descriptors
from .word_agreement import words_agree as words_agree
from .word_effects import term_effects as term_effects
