"""The register: each horn's particulars and place, what it was found to be, how its stand was changed, its pictures.

It says what a horn is and where it belongs, not who has it (lending) or what is wrong with it (workshop).
"""
