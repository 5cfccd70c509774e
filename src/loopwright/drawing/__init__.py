"""What a sheet looks like, without Qt: the same for the screen, paper and SVG.

`look` says colours, weights and scale. `plans` are values of what is drawn where; `plan` makes them from a sheet, with
`coils` and `dimensions`, and `in_units` gives them in the units a person prefers. Ink comes onto a `plotter` by `ink`
(pipes, parts, floors), `store`, `dimensions`, `writing` and `frame`; `scene` holds its order, `page` the paper, `svg`
one back end.

Words find room on a `board` of `grid`s: `label_places`, `flag_places` and `lettering` say where each would like to
stand, `layout` keeps who stands where, `labels` is the one call for all of it, `widths` says how wide words are.

`symbols` and `svg_paths` read the drawings of kinds, `own` a person's own; `flags` makes findings into flags.
"""
