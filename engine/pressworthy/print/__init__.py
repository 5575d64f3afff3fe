"""The physics of press, paper and eye: what ink on paper will show, and how much of it arrives.

`inks` and `halftone` lay the ink, `optics` lets light through ink and paper, `eye` looks from the
reader's distance. `printlook` puts these together, the one way from a copy's inks to light;
`softproof` shows a copy's colours, as its ICC profile has them, on its paper; `transfer` measures
how much of a picture's contrast is left.
"""
