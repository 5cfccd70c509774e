"""The apprentice's window: courses, a lesson beside the sheet, faults to find, the order of work, a teacher's boxes.

Owns how these look and are used. What a lesson is, how it is judged and what comes before what is asked of
`loopwright.lessons`, which is loaded when somebody first wants it.
"""
