"""The Run view: power cuts and days played in time, beside charts and on the sheet.

`reading` and `story` say what a run means without Qt; `view` joins the widgets of the others.
"""
