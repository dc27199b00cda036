from .ordinal_model import ordinal as ordinal
