"""The service record: what was measured in one job, for the customer and for the file.

model.py      the record as data: every number with its unit and U, None where not measured
sources.py    what a record is made from; gathered from the store here, and nowhere else:
              answer.py (the kit's), entries.py (what people told), digest.py (the samples)
kept.py       what the record keeps of the samples when they are dropped, by dropping.py's thread
building.py   pure: sources in, record out; parts of it in volumes.py, level.py, gates.py, story.py,
              telling.py
trend.py      flow from the stored scale counts, for the plots only
sheet.py      pure: record in, sections of words, tables and plots out (blocks.py); more of them in
              work.py and evidence.py; numbers are written by figures.py, words are in wording.py
drawing.py    a plot as lines, areas and texts; plots.py draws the record's own in a frame.py
page.py       the sheet as HTML; svg.py its plots
document.py   the sheet as PDF; pages.py its flowables, picture.py, foot.py, fonts.py its letters
used_oil.py   the log of used oil as CSV
supplies.py   what to have at hand for the next one
routes.py     all of it over HTTP
"""
