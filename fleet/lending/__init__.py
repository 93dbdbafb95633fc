"""Lending: a loan from its first day to its last, with what went out and came back, and the agreement it is under.

It says who has a horn and until when; the horn itself stays in the register. Its tables are named `loans`.

`LoanPeriod` rows tell each move of the due date; `Loan.due_on` is the one in force. A lost horn's loan ends
(`lost_words`) and the horn is not found; a swapped one's goes on in another (`in_place_of`) under the same signature.
"""
