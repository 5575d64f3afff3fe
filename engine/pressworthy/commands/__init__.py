"""The command line: a module a command holds its options, its help page and what it does.

main: parses, runs one, and turns what happens into an exit status; options: those that several
commands share; asked: which pictures are to be worked on, by which house profiles; output: what is
written. What a command needs is imported when it runs, so that help is quick.
"""
