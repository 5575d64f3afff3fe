"""The open proof: the marked proof's sheet, alive in a browser; what is decided there is files.

issue: the state of an issue, read from its folder, a value. decisions: from that value and what a
person decided to changes of files, pure; taking_back: the way back. day_book: makes a decision and
takes one back, whole or not at all. journal, cells, acceptances: the three files that are written
in: decisions.jsonl, issue.csv, waivers.yaml. sizes: the largest that the pixels allow. names: what
a dropped master may be called.

standards: likewise what is decided on a house profile, whose YAML profile_text writes in; what_if:
what another value would change, here and in issues opened lately; printers_data: an ICC profile
dropped on the house standard. book and book_routes: the page on which it is read, with book.css and
book.js; asking: what a page of ours sends.

desk: the issue open, what was judged and pulled of it, with lanes of work beside the server; looks
and laid_aside: what is drawn for it, and where that lies. sheet and answers: what the page shows
and what can be done beside a remark, as values; templates, open.css and open.js beside the marked
proof's own. page_plan: the issue by its pages, a value; page_desk reads and draws them, page_sheet,
pages.css and pages.js show them. entry, server, serving: who may enter, what may be asked, until it
is closed. dropped, pages: what comes in; saving, sending: the marked proof, the packed copies and
the contact sheet, which go out. guidance: the way through, and cautions. icon, choosing, recent: a
start without a terminal.
"""
