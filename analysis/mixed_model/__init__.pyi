# The engine below anova and link: nothing of it is public.
