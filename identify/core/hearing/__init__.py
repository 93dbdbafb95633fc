"""What a recording holds: from the numbers of a file to the note, the tube and a record's claim."""
