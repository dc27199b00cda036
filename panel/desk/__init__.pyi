# The files of this sub-room serve the house: nothing of it is public.
