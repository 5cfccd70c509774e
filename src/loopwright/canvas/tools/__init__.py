"""Pointer tools, each a state machine without Qt.

`base` holds the words between a tool and its window. One module a tool: `select`, `pipe`, `place`, `link`,
`dimension`, `note`, `pan`. What a drag means is in `drags`, `vessel_drags` and `link_ends`; what a drawn pipe stands
for in `piping`; what arrow keys and Tab do in `keys`.
"""
