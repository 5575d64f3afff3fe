"""What ink on paper will show: the print look, and the measure of how much detail survives it.

`halftone` lays the dots, `optics` lets light through ink and paper, `eye` looks at them from the
reader's distance; `printlook` makes views of a copy, `transfer` measures what of its contrast is
left, and `amount` derives from that how much a printing condition needs sharpening.
`softproof` shows its colours on their paper, and `pull` gathers what the marked proof shows of one
picture.
"""
