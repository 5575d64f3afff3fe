"""What a house standard says of each rule: option -> the sentence its value stands in, at `{}`."""

from __future__ import annotations

from collections.abc import Mapping

SENTENCES: Mapping[str, Mapping[str, str]] = {
    "prepared-copy": {"masters": "A copy’s master is looked for, seen from the copy, in {}."},
    "resolution": {
        "below": "A picture may fall {} under the ppi that it prints at.",
        "above": "It may lie {} over that before anything is said.",
        "distortion": "Its two axes may differ by {}.",
        "most cropped": "At most {} of it is cropped away unasked.",
    },
    "line-art": {"least": "Line art has at least {}.", "most": "More than {} is wasted."},
    "bleed": {"least": "On every edge that bleeds, a picture runs {} beyond the trim."},
    "luminance": {
        "least spread": "Between its darks and lights lie at least {} of printed lightness.",
        "blown": "At most {} of it is pure white.",
        "blocked": "At most {} of it is pure black.",
    },
    "icc-profile": {"spaces": "Pictures are delivered in {}."},
    "colour-mode": {"modes": "Pictures may be in {}.", "depths": "They may have {} bits a value."},
    "gamut": {
        "visible": "A colour that moves by less than {} counts as printed.",
        "area": "At most {} of a picture may move by more than that.",
        "furthest": "All but its last twentieth of colours move by at most {}.",
    },
    "ink": {
        "limit": "All inks together come to at most {}.",
        "specks": "Specks over that may make up {} of a picture.",
    },
    "tone-range": {
        "smallest dot": "The press holds no dot smaller than {}.",
        "largest dot": "Dots larger than {} fill in.",
        "visible": "A loss counts from {} of printed lightness.",
        "area": "At either end at most {} of a picture is lost.",
    },
    "grayscale": {
        "least contrast": "In gray a picture keeps at least {} of its colour contrast.",
        "closest": "Areas nearer than {} in printed gray merge.",
        "grain": "A gray mix may raise the noise of flat places by {}.",
    },
    "foreign-condition": {
        "difference": "Inks mixed for another press may miss its colours by {} on average."
    },
    "acutance": {
        "least": "In print a copy keeps at least {} of the sharpness that it has before the press.",
        "most": "It gains no more than {} of that by its sharpening.",
    },
    "source-profile": {
        "imaginary": "At most {} of a picture may be colours that no eye can see.",
        "smallest delivery": "Pictures of one folder and profile are judged together from {} up.",
    },
    "true-resolution": {
        "enlarged": "An enlargement up to {} times is let pass.",
        "suspicion": "Detail that ends too early is told of from {} probability on.",
    },
    "sharpening": {
        "supplied": "A picture without a ticket is taken for {}.",
        "master halo": "A master’s halos stand at most {} high, of the edge’s step.",
        "least halo": "A finished picture’s halos stand at least {} high.",
        "most halo": "They stand at most {} high.",
    },
    "compression": {
        "least quality": "A JPEG is saved at a quality of {} or better.",
        "blocks": "Steps on its block borders are at most {} times those between.",
        "visible step": "Blocks fainter to the reader than {} levels of 255 are let pass.",
    },
    "credit": {"required": "Every picture carries {}."},
    "file-weight": {
        "heaviest": "A file weighs at most {}.",
        "longest edge": "Its longer edge has at most {}.",
        "shortest long edge": "Its longer edge has at least {}, unless its place asks for others.",
    },
    "page-printing": {"difference": "The press of a page may lie {} from the house’s."},
    "page-inks": {"spot inks": "Spot inks that pictures on pages may be made of: {}."},
}
