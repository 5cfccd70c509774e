"""The drawing as frozen values, and edits that make a new one.

What there is: `values` the records, `plane` the plain geometry, `ports` and `geometry` where ports and pipes lie,
`runs` a pipe seen as runs, `dimensions`, `links` and `link_words` what control links say, `sizes` what a pipe may be
called, `circuit` and `systems` what belongs together, `near`, `guides` and `neatness` what a place or a way is measured
by.

Edits: `edits` is the one module callers need, made of `change` (records and checks), `joining` (pipes), `vessels`
(tappings and coils), `pieces` (copies) and `dimensions`. Above it stands what a hand means by one gesture: `placing`,
`fitting_out`, `piping_up`, `repeating`, `aligning`, `bends`, `removal`; `asked` reads a line of words, `shorthand` the
tables of scripts.

The ways of pipes: `routing` searches on the `lines` beside what is drawn, `pipework` keeps pipes on their ports when
parts move (`rubber` stretches them, `meanwhile` stands in during a drag), `tidy` sets risers apart, `crossings` finds
where pipes hop.
"""
