"""What can be done: every deed of the record, with its words. The part before the dot is its kind."""

from __future__ import annotations

from django.db import models

from fleet.ground.languages.marks import _s_lazy


class Kind(models.TextChoices):
    PEOPLE = "people", _s_lazy("pupils and guardians")
    POSTS = "posts", _s_lazy("staff and posts")
    HORNS = "horns", _s_lazy("horns")
    BENCH = "bench", _s_lazy("repairs and parts")
    COUNTS = "counts", _s_lazy("counts")
    LOANS = "loans", _s_lazy("loans")
    SETTINGS = "settings", _s_lazy("settings")
    LISTS = "lists", _s_lazy("lists brought in")
    TAKEN = "taken", _s_lazy("data taken along")
    NAMES = "names", _s_lazy("names taken out")
    ENTRY = "entry", _s_lazy("signing in")


class Deed(models.TextChoices):
    PUPIL_NEW = "people.pupil-new", _s_lazy("Put a pupil on record")
    PUPIL_CHANGED = "people.pupil-changed", _s_lazy("Changed a pupil’s particulars")
    GUARDIAN_NEW = "people.guardian-new", _s_lazy("Put a guardian on record")
    GUARDIAN_CHANGED = "people.guardian-changed", _s_lazy("Changed a guardian’s particulars")
    GUARDIAN_TIED = "people.guardian-tied", _s_lazy("Said that a guardian answers for a pupil")
    ADDRESS_OBJECTED = "people.address-objected", _s_lazy("Said by a letter’s link: a change of address was not mine")
    OBJECTION_SETTLED = "people.objection-settled", _s_lazy("Looked into a change of address that was objected to")
    GUARDIAN_LET_GO = "people.guardian-let-go", _s_lazy("Said that a guardian answers for a pupil no more")

    POST_GIVEN = "posts.given", _s_lazy("Gave a post")
    POST_CHANGED = "posts.changed", _s_lazy("Changed a post")
    POST_ENDED = "posts.ended", _s_lazy("Ended a post")
    SCHOOL_BEGUN = "posts.school-begun", _s_lazy("Opened the school with its first head")
    CLOSING_PROPOSED = "posts.closing-proposed", _s_lazy("Proposed to close the school")
    CLOSING_AGREED = "posts.closing-agreed", _s_lazy("Agreed to close the school")
    CLOSING_TAKEN_BACK = "posts.closing-taken-back", _s_lazy("Said that the school stays")
    SCHOOL_CLOSED = "posts.school-closed", _s_lazy("Closed a school")

    HORN_NEW = "horns.new", _s_lazy("Put a horn on the register")
    HORN_CHANGED = "horns.changed", _s_lazy("Changed a horn’s particulars")
    HORN_IDENTIFIED = "horns.identified", _s_lazy("Put an identification on a horn")
    HORN_RESTRUNG = "horns.restrung", _s_lazy("Recorded that a horn was restrung")
    HORN_WITHDRAWN = "horns.withdrawn", _s_lazy("Withdrew a horn")
    HORN_STRUCK_OUT = "horns.struck-out", _s_lazy("Struck out a horn entered by mistake")
    HORN_KEPT_AGAIN = "horns.kept-again", _s_lazy("Put a withdrawn horn back")
    HORN_NOT_FOUND = "horns.not-found", _s_lazy("Recorded that a horn is not found")
    HORN_FOUND = "horns.found", _s_lazy("Recorded that a horn is found")
    DISPOSAL_PROPOSED = "horns.disposal-proposed", _s_lazy("Proposed to give a horn up")
    DISPOSAL_APPROVED = "horns.disposal-approved", _s_lazy("Approved giving a horn up")
    DISPOSAL_TURNED_DOWN = "horns.disposal-turned-down", _s_lazy("Turned down giving a horn up")
    PHOTOGRAPH_ADDED = "horns.photograph-added", _s_lazy("Added a photograph of a horn")
    PHOTOGRAPH_REMOVED = "horns.photograph-removed", _s_lazy("Removed a photograph of a horn")

    JOB_OPENED = "bench.opened", _s_lazy("Opened a repair job")
    JOB_CHANGED = "bench.changed", _s_lazy("Changed a repair job")
    CARE_TAKEN_BACK = "bench.care-back", _s_lazy("Took back a record of care")
    PART_KEPT = "bench.part", _s_lazy("Wrote down or changed a part")
    LABOUR_PRICED = "bench.labour", _s_lazy("Changed a labour price")

    COUNT_BEGUN = "counts.begun", _s_lazy("Began a count")
    COUNT_ENDED = "counts.ended", _s_lazy("Ended a count")
    COUNT_SIGNED = "counts.signed", _s_lazy("Signed a count")
    DIFFERENCE_SETTLED = "counts.settled", _s_lazy("Settled a difference of a count")

    LOAN_BEGUN = "loans.begun", _s_lazy("Issued a horn")
    LOAN_LISTED = "loans.listed", _s_lazy("Brought in a loan that runs")
    SHEET_SIGNED = "loans.sheet-signed", _s_lazy("Recorded that a loan’s sheet is signed")
    RETURN_NOTED = "loans.return-noted", _s_lazy("Noted that a horn came back")
    RETURN_NOTE_GONE = "loans.return-note-gone", _s_lazy("Took away a note that a horn came back")
    LOAN_RETURNED = "loans.returned", _s_lazy("Took a horn back")
    LOAN_SWAPPED = "loans.swapped", _s_lazy("Swapped a horn for another")
    LOAN_LOST = "loans.lost", _s_lazy("Recorded that a horn was lost")
    LOAN_RENEWED = "loans.renewed", _s_lazy("Renewed a loan")
    LOAN_RECALLED = "loans.recalled", _s_lazy("Recalled a horn")
    CHARGED = "loans.charged", _s_lazy("Charged money for a loan")
    CHARGE_SETTLED = "loans.charge-settled", _s_lazy("Settled a charge")
    ACCESSORY_SETTLED = "loans.accessory-settled", _s_lazy("Settled what did not come back")
    PUT_BEFORE = "loans.put-before", _s_lazy("Asked a family to sign")
    TAKEN_BACK = "loans.taken-back", _s_lazy("Took back what a family was asked to sign")
    SHEETS_PUT_AWAY = "loans.sheets-put-away", _s_lazy("Waits for a sheet on paper no longer")
    SHEET_KEPT = "loans.sheet-kept", _s_lazy("Kept a signed sheet with its loan")
    SHEET_REMOVED = "loans.sheet-removed", _s_lazy("Removed a signed sheet")
    WISH_KEPT = "loans.wish-kept", _s_lazy("Wrote down that a pupil waits for a horn")
    WISH_ENDED = "loans.wish-ended", _s_lazy("Said that a pupil waits for a horn no longer")
    LETTERS_SENT = "loans.letters-sent", _s_lazy("Sent the letters that were due")
    LETTER_CAME_BACK = "loans.letter-came-back", _s_lazy("Recorded that a letter came back")
    SIGNED = "loans.signed", _s_lazy("Signed for a horn on the family’s page")

    SCHOOL_CHANGED = "settings.school", _s_lazy("Changed the school’s settings")
    SIGN_IN_CHANGED = "settings.sign-in", _s_lazy("Changed how staff sign in")
    YEAR_BEGUN = "settings.year-begun", _s_lazy("Began a new school year")
    WORDED = "settings.worded", _s_lazy("Worded a sentence for families")
    HOLIDAY_KEPT = "settings.holiday", _s_lazy("Wrote down or changed a holiday")
    HOLIDAY_REMOVED = "settings.holiday-removed", _s_lazy("Removed a holiday")
    AGREEMENT_WRITTEN = "settings.agreement", _s_lazy("Wrote a new version of the loan agreement")
    LETTERS_CHANGED = "settings.letters", _s_lazy("Changed the letters and how long names are kept")
    MATCHING_CHANGED = "settings.matching", _s_lazy("Changed the rules of matching")
    LABELS_CHANGED = "settings.labels", _s_lazy("Changed the label sheet")
    PLACE_KEPT = "settings.place", _s_lazy("Wrote down or renamed a place")
    PLACES_MERGED = "settings.places-merged", _s_lazy("Put two places together")

    LIST_WRITTEN = "lists.written", _s_lazy("Brought in a list")
    LIST_UNDONE = "lists.undone", _s_lazy("Undid a list")
    SCHOOL_BROUGHT_IN = "lists.school-in", _s_lazy("Brought in the whole school from a file")

    TAKEN_ALONG = "taken.list", _s_lazy("Took a list with names along")
    TAKEN_OF_PUPIL = "taken.pupil", _s_lazy("Took everything about a pupil along")
    TAKEN_BY_FAMILY = "taken.family", _s_lazy("Took everything about the own family along")
    CALENDAR_MADE = "taken.calendar-made", _s_lazy("Made a secret address of the calendar of due dates")
    CALENDAR_REVOKED = "taken.calendar-revoked", _s_lazy("Revoked a secret address of the calendar")
    BACKED_UP = "taken.backup", _s_lazy("Wrote the whole site into a backup")
    RESTORED = "taken.restored", _s_lazy("Brought the whole site back from a backup")
    SCHOOL_TAKEN = "taken.school", _s_lazy("Wrote the whole school into a file")

    PUPIL_STRUCK_OUT = "people.struck-out", _s_lazy("Struck out a pupil entered by mistake")
    PUPILS_MERGED = "people.merged", _s_lazy("Put two records of one pupil together")
    GUARDIANS_MERGED = "people.guardians-merged", _s_lazy("Put two records of one guardian together")
    CLASS_RENAMED = "people.class-renamed", _s_lazy("Renamed a class, or put two together")
    FORGOTTEN = "names.forgotten", _s_lazy("Took a pupil’s names out")
    RECORD_EMPTIED = "names.record-emptied", _s_lazy("Took old names out of this record")
    LISTS_REMOVED = "names.lists-removed", _s_lazy("Removed lists brought in that nobody needs")

    SIGNED_IN = "entry.in", _s_lazy("Signed in")
    SIGNED_OUT = "entry.out", _s_lazy("Signed out")
    SIGNED_OUT_EVERYWHERE = "entry.out-everywhere", _s_lazy("Signed out everywhere")
    NOT_LET_IN = "entry.refused", _s_lazy("Signing in failed")
    NOT_PROVEN = "entry.not-proven", _s_lazy("Was asked once more who it is, and did not prove it")
    PASSWORD_CHANGED = "entry.password", _s_lazy("Set, changed or reset the password")
    SECOND_STEP_ON = "entry.second-step-on", _s_lazy("Switched a second step on")
    SECOND_STEP_OFF = "entry.second-step-off", _s_lazy("Switched a second step off")
    RECOVERY_CODES_MADE = "entry.recovery-codes", _s_lazy("Made new recovery codes")

    @property
    def kind(self) -> Kind:
        return Kind(self.value.split(".")[0])


# These tell which acts were emptied: what they tell is never taken out itself. It holds numbers only.
EMPTYING = (Deed.FORGOTTEN, Deed.RECORD_EMPTIED)
EMPTIED = "emptied"
