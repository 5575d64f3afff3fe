"""A printing condition made from measured patches: its figures, its inks and its ICC profiles.

patches: characterization data read (CGATS.17); model: the Neugebauer model and the black's curve,
fitted to them; profiles: gray by itself, CMYK by ArgyllCMS; described: condition.yaml and
inks.json; making: the whole, with a report of fit.
"""
