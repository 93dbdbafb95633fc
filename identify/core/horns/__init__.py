"""What a horn is: notes, tubes and their valves, and every build of the catalogue."""
