"""From what was observed of a horn to what it must be, and why, in sentences.

Read in this order: evidence (the checks and their answers), expect (the answer each should get, computed and never
typed), mistakes (how often staff err; all rates are estimates so far), assumed, scales (how careful the person at hand
is, which nobody knows), ranking, verdict, reasons, explain.

*Settled* needs an explanation without mistakes and a chance of 99.5 %, or 98 % once nothing would tell more;
`confirm` then names what is worth a second look. `mix` counts a school's confirmed horns: from 10 on they weigh against
the estimate, which counts as 40 horns; they never weigh more than it.

Every horn is reckoned with whole and in each state that a check can show (a string off, a valve stuck down). One is
called broken only where its kind fits no other way; what a single wrong answer would show as well is a doubt first.
"""
