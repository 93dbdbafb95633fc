"""Who is who: schools, staff and what they are at each school, pupils and the guardians who answer for them.

It knows nothing of horns; what a person may do with them is stated in `fleet.ground.access`.
"""
