"""What can be done: every deed of the record, with its words. The part before the dot is its kind."""

from __future__ import annotations

from django.db import models


class Kind(models.TextChoices):
    PEOPLE = "people", "pupils and guardians"
    POSTS = "posts", "staff and posts"
    HORNS = "horns", "horns"
    BENCH = "bench", "repairs and parts"
    COUNTS = "counts", "counts"
    LOANS = "loans", "loans"
    SETTINGS = "settings", "settings"
    LISTS = "lists", "lists brought in"
    TAKEN = "taken", "data taken along"
    NAMES = "names", "names taken out"
    ENTRY = "entry", "signing in"


class Deed(models.TextChoices):
    PUPIL_NEW = "people.pupil-new", "Put a pupil on record"
    PUPIL_CHANGED = "people.pupil-changed", "Changed a pupil’s particulars"
    GUARDIAN_NEW = "people.guardian-new", "Put a guardian on record"
    GUARDIAN_CHANGED = "people.guardian-changed", "Changed a guardian’s particulars"
    GUARDIAN_TIED = "people.guardian-tied", "Said that a guardian answers for a pupil"
    ADDRESS_OBJECTED = "people.address-objected", "Said by a letter’s link: a change of address was not mine"
    OBJECTION_SETTLED = "people.objection-settled", "Looked into a change of address that was objected to"
    GUARDIAN_LET_GO = "people.guardian-let-go", "Said that a guardian answers for a pupil no more"

    POST_GIVEN = "posts.given", "Gave a post"
    POST_CHANGED = "posts.changed", "Changed a post"
    POST_ENDED = "posts.ended", "Ended a post"
    SCHOOL_BEGUN = "posts.school-begun", "Opened the school with its first head"
    CLOSING_PROPOSED = "posts.closing-proposed", "Proposed to close the school"
    CLOSING_AGREED = "posts.closing-agreed", "Agreed to close the school"
    CLOSING_TAKEN_BACK = "posts.closing-taken-back", "Said that the school stays"
    SCHOOL_CLOSED = "posts.school-closed", "Closed a school"

    HORN_NEW = "horns.new", "Put a horn on the register"
    HORN_CHANGED = "horns.changed", "Changed a horn’s particulars"
    HORN_IDENTIFIED = "horns.identified", "Put an identification on a horn"
    HORN_RESTRUNG = "horns.restrung", "Recorded that a horn was restrung"
    HORN_WITHDRAWN = "horns.withdrawn", "Withdrew a horn"
    HORN_STRUCK_OUT = "horns.struck-out", "Struck out a horn entered by mistake"
    HORN_KEPT_AGAIN = "horns.kept-again", "Put a withdrawn horn back"
    HORN_NOT_FOUND = "horns.not-found", "Recorded that a horn is not found"
    HORN_FOUND = "horns.found", "Recorded that a horn is found"
    DISPOSAL_PROPOSED = "horns.disposal-proposed", "Proposed to give a horn up"
    DISPOSAL_APPROVED = "horns.disposal-approved", "Approved giving a horn up"
    DISPOSAL_TURNED_DOWN = "horns.disposal-turned-down", "Turned down giving a horn up"
    PHOTOGRAPH_ADDED = "horns.photograph-added", "Added a photograph of a horn"
    PHOTOGRAPH_REMOVED = "horns.photograph-removed", "Removed a photograph of a horn"

    JOB_OPENED = "bench.opened", "Opened a repair job"
    JOB_CHANGED = "bench.changed", "Changed a repair job"
    CARE_TAKEN_BACK = "bench.care-back", "Took back a record of care"
    PART_KEPT = "bench.part", "Wrote down or changed a part"
    LABOUR_PRICED = "bench.labour", "Changed a labour price"

    COUNT_BEGUN = "counts.begun", "Began a count"
    COUNT_ENDED = "counts.ended", "Ended a count"
    COUNT_SIGNED = "counts.signed", "Signed a count"
    DIFFERENCE_SETTLED = "counts.settled", "Settled a difference of a count"

    LOAN_BEGUN = "loans.begun", "Issued a horn"
    LOAN_LISTED = "loans.listed", "Brought in a loan that runs"
    SHEET_SIGNED = "loans.sheet-signed", "Recorded that a loan’s sheet is signed"
    RETURN_NOTED = "loans.return-noted", "Noted that a horn came back"
    RETURN_NOTE_GONE = "loans.return-note-gone", "Took away a note that a horn came back"
    LOAN_RETURNED = "loans.returned", "Took a horn back"
    LOAN_SWAPPED = "loans.swapped", "Swapped a horn for another"
    LOAN_LOST = "loans.lost", "Recorded that a horn was lost"
    LOAN_RENEWED = "loans.renewed", "Renewed a loan"
    LOAN_RECALLED = "loans.recalled", "Recalled a horn"
    CHARGED = "loans.charged", "Charged money for a loan"
    CHARGE_SETTLED = "loans.charge-settled", "Settled a charge"
    ACCESSORY_SETTLED = "loans.accessory-settled", "Settled what did not come back"
    PUT_BEFORE = "loans.put-before", "Asked a family to sign"
    TAKEN_BACK = "loans.taken-back", "Took back what a family was asked to sign"
    SHEETS_PUT_AWAY = "loans.sheets-put-away", "Waits for a sheet on paper no longer"
    SHEET_KEPT = "loans.sheet-kept", "Kept a signed sheet with its loan"
    SHEET_REMOVED = "loans.sheet-removed", "Removed a signed sheet"
    WISH_KEPT = "loans.wish-kept", "Wrote down that a pupil waits for a horn"
    WISH_ENDED = "loans.wish-ended", "Said that a pupil waits for a horn no longer"
    LETTERS_SENT = "loans.letters-sent", "Sent the letters that were due"
    LETTER_CAME_BACK = "loans.letter-came-back", "Recorded that a letter came back"
    SIGNED = "loans.signed", "Signed for a horn on the family’s page"

    SCHOOL_CHANGED = "settings.school", "Changed the school’s settings"
    SIGN_IN_CHANGED = "settings.sign-in", "Changed how staff sign in"
    YEAR_BEGUN = "settings.year-begun", "Began a new school year"
    WORDED = "settings.worded", "Worded a sentence for families"
    HOLIDAY_KEPT = "settings.holiday", "Wrote down or changed a holiday"
    HOLIDAY_REMOVED = "settings.holiday-removed", "Removed a holiday"
    AGREEMENT_WRITTEN = "settings.agreement", "Wrote a new version of the loan agreement"
    LETTERS_CHANGED = "settings.letters", "Changed the letters and how long names are kept"
    MATCHING_CHANGED = "settings.matching", "Changed the rules of matching"
    LABELS_CHANGED = "settings.labels", "Changed the label sheet"
    PLACE_KEPT = "settings.place", "Wrote down or renamed a place"
    PLACES_MERGED = "settings.places-merged", "Put two places together"

    LIST_WRITTEN = "lists.written", "Brought in a list"
    LIST_UNDONE = "lists.undone", "Undid a list"
    SCHOOL_BROUGHT_IN = "lists.school-in", "Brought in the whole school from a file"

    TAKEN_ALONG = "taken.list", "Took a list with names along"
    TAKEN_OF_PUPIL = "taken.pupil", "Took everything about a pupil along"
    TAKEN_BY_FAMILY = "taken.family", "Took everything about the own family along"
    CALENDAR_MADE = "taken.calendar-made", "Made a secret address of the calendar of due dates"
    CALENDAR_REVOKED = "taken.calendar-revoked", "Revoked a secret address of the calendar"
    BACKED_UP = "taken.backup", "Wrote the whole site into a backup"
    RESTORED = "taken.restored", "Brought the whole site back from a backup"
    SCHOOL_TAKEN = "taken.school", "Wrote the whole school into a file"

    PUPIL_STRUCK_OUT = "people.struck-out", "Struck out a pupil entered by mistake"
    PUPILS_MERGED = "people.merged", "Put two records of one pupil together"
    GUARDIANS_MERGED = "people.guardians-merged", "Put two records of one guardian together"
    CLASS_RENAMED = "people.class-renamed", "Renamed a class, or put two together"
    FORGOTTEN = "names.forgotten", "Took a pupil’s names out"
    RECORD_EMPTIED = "names.record-emptied", "Took old names out of this record"
    LISTS_REMOVED = "names.lists-removed", "Removed lists brought in that nobody needs"

    SIGNED_IN = "entry.in", "Signed in"
    SIGNED_OUT = "entry.out", "Signed out"
    SIGNED_OUT_EVERYWHERE = "entry.out-everywhere", "Signed out everywhere"
    NOT_LET_IN = "entry.refused", "Signing in failed"
    NOT_PROVEN = "entry.not-proven", "Was asked once more who it is, and did not prove it"
    PASSWORD_CHANGED = "entry.password", "Set, changed or reset the password"
    SECOND_STEP_ON = "entry.second-step-on", "Switched a second step on"
    SECOND_STEP_OFF = "entry.second-step-off", "Switched a second step off"
    RECOVERY_CODES_MADE = "entry.recovery-codes", "Made new recovery codes"

    @property
    def kind(self) -> Kind:
        return Kind(self.value.split(".")[0])


# These tell which acts were emptied: what they tell is never taken out itself. It holds numbers only.
EMPTYING = (Deed.FORGOTTEN, Deed.RECORD_EMPTIED)
EMPTIED = "emptied"
