"""What is said? Results in; documents, JSON and rows out.

A module a question, named as its command. It has

- `report(location, day, results…) -> Document`, for people: a title, lines that introduce, sections
  with an `id` by which writers pick them, and a last section "notes" with what holds for all and
  the cautions. No units, no width, no colour, no markup: a length is a `Quantity`, a time a
  `Moment`; words with quantities among them are a `Text`, made by `text("sill ", about(sill_m))` or
  by `+`. An f-string takes a `Moment` and refuses a `Quantity`.
- `answer(location, day, results…) -> Answer`, for programs: SI, plan frame, ISO 8601.
- `ROWS`, the paths of keys through that answer to the lists whose items are rows.

What a part of one document says elsewhere too (where a flag hangs, what closes a gap) is a function
that returns a text or lines, which the others call. Blank lines, indents, bullets, how long a line
is, and whether a repeated cell is told again, are a writer's: `write/terminal.py`, `write/page/`,
`write/sheet.py`, `write/calendar.py`.
"""
