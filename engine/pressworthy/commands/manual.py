"""What each command's help says beyond its options: how it works, examples, exit status, files."""

from __future__ import annotations

CAUTION = "The printer's own data and advice come first; no report here is a contract proof."

_EXIT = """exit status:
  0  nothing at severity stop, everything measured
  1  something at severity stop, or something unmeasured or broken
  2  the set-up is wrong; nothing was {done}"""

PAGES = {
    "pressworthy": """Every picture of an issue, measured against the publisher's house standard,
prepared as the copy that goes to press, and shown as the reader will see it.

CHECK, PREPARE and PROOF do the work; the other commands explain what is there, or start a house
profile, a picture list or a rule of your own. COMMAND --help tells more of each, with examples.

files:
  a house profile is a YAML file; --house takes its name, or its path. --house-folder is the
  publisher's own folder of them, where names are sought first.
  verdicts of earlier checks lie in verdicts.sqlite in the user's cache folder
  (XDG_CACHE_HOME); it may be deleted at any time.
environment:
  TMPDIR       where verdicts and copies for a proof lie while a command runs
  COLUMNS      width of this help""",
    "check": f"""Folders are walked. Every rule that the house profile names is run on every
picture; the report tells, worst first, what was measured against which limit and what to do.
Without --size the size that the file itself states counts, and the report says so. What cannot be
measured is told with the reason and is never a pass.

What has not changed since an earlier run is not measured again (--no-cache to do so): neither the
file, nor its placement, the house profile, the printing condition, the rules or this program.

examples:
  pressworthy check pictures/ --house coated-magazine
  pressworthy check cover.tif --house newsprint --size 210x148mm --bleed 3mm:top,left
  pressworthy check --list issue.csv --format json --output report.json
  pressworthy check --pages magazine.pdf masters/ --house our-house/quarterly.yaml
  pressworthy check --pages magazine.pdf masters/ --list issue.csv
  pressworthy check archive/ --house mono --format lines --scheduler tcp://desk:8786
{_EXIT.format(done="checked")}""",
    "prepare": f"""A copy is turned upright, cropped to its box, given its bleed, brought to
exactly the output's pixels, toned for the paper, converted to the press's inks and sharpened last,
for that output and no other. It carries a ticket of what it was made from and for. No pixels are
invented, no master is written to, no copy is made from a copy, and nothing is written over. A run
that was broken off is taken up again by the same command; copies that are up to date stay.

examples:
  pressworthy prepare pictures/ --house coated-magazine --into copies/
  pressworthy prepare cover.tif --house coated-magazine --house screen --into copies/ \\
      --size 210x148mm --focus 0.5,0.33
  pressworthy prepare --list issue.csv --into copies/ --dry-run
{_EXIT.format(done="prepared")}""",
    "proof": f"""Writes marked-proof.html: every picture at its relative size with remarks in
the margin, as supplied, as soft proof, and in print look, which is what dots, paper and the
reader's distance leave of it, unsharpened and sharpened. One file, to be opened in any browser,
sent or printed. A simulation is no contract proof.

examples:
  pressworthy proof pictures/ --house coated-magazine --into proof/
  pressworthy proof --list issue.csv --into proof/ --format pdf
{_EXIT.format(done="proofed")}""",
    "house": """A house profile says what an output is and what each rule may find: `extends`
names its parent, `lock` the rules no title may change. SHOW prints it as it takes effect, with
file and line of every value on --origin; VALIDATE tells every fault at once.

examples:
  pressworthy house show coated-magazine --origin
  pressworthy house validate our-house/*.yaml""",
    "sharpening": """Prints, for a house profile, how much of the contrast of fine detail reaches
the reader's eye at each amount of sharpening, and the amount that brings it nearest to the
original's. The built-in house profiles carry amounts derived so.

example:
  pressworthy sharpening --house newsprint""",
    "rules": """SHOW explains what a rule measures, why it matters, how to put it right, what the
house sets and what it can find. NEW writes a package with a rule, its test and a house profile,
to be filled and installed.

examples:
  pressworthy rules show resolution
  pressworthy rules new page-grid --into ~/our-rules""",
    "conditions": """A printing condition is press, paper and ink. Named ones are described by
paper, solids, tone value increase, gamut and ink limit, with the source of the data. A house
profile may name the printer's own ICC profile in their place, which always comes first.

examples:
  pressworthy conditions
  pressworthy conditions newsprint
  pressworthy conditions our-press.icc""",
    "list": """A picture list tells page, house profile, size, bleed, crop, assumed RGB space and
waiver for each picture, as CSV or YAML. It is read by --list of check, prepare and proof.

examples:
  pressworthy list new pictures/ --output issue.csv
  pressworthy list from-pages magazine.pdf masters/ --output issue.csv""",
    "completion": """Prints a script that lets the shell complete commands, options and the names
of house profiles.

examples:
  pressworthy completion bash > ~/.local/share/bash-completion/completions/pressworthy
  pressworthy completion zsh > ~/.zfunc/_pressworthy     # a folder in $fpath""",
}
