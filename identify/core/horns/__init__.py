"""What a horn is: notes, tubes and their valves, and every build of the catalogue.

Read in this order: pitch, air (tubes, partials, what a fingering sounds), builds, catalogue, broken (what can be
wrong with one). `columns(build, stand)` gives every air column its levers reach.
"""
