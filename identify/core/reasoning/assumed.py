"""What a verdict assumes of persons and of schools, and how its tables are named: known without reckoning."""

# The estimate of how common builds are counts as much as this many confirmed horns of a school's own, and they count
# no more than it, however many there are.
ESTIMATE_WORTH = 40
# A school's own horns make a build at most so many times as common as it is elsewhere, before shares are made to fit.
MOST_TIMES = 4.0
# Fewer confirmed horns than this say nothing about a school.
ENOUGH_HORNS = 10

# Whoever takes a horn for one like the one before takes it for what looks alike, and that may be rare: being said to be
# like it makes a build no more than so many times likelier besides, against any other.
MOST_ALIKE = 50.0

# Nobody knows how careful the person at hand is: how many times as often as usual they err, and how many err so. On
# average they err as usual; whoever is caught at one mistake is more likely to have made another.
PERSONS = ((0.5, 0.6), (1.0, 0.2), (2.0, 0.15), (4.0, 0.05))

# Nor how often staff err in each thing: from half as often as is assumed to twice, in each by itself.
BAND = 2.0

# Two horns are told apart by a check to which they give the same answer less often than this.
SAME_ANSWERS = 0.3

Key = tuple[str, str | None]


def table_of(key: str, test_note: str | None = None) -> tuple[str, str | None]:
    """In which table the answers to a check are: those to the step-down depend on the test note's fingering."""
    return key, test_note if key == "step_down" else None
