"""What would a season of colonies, keepers and weather look like, day by day, in another world?

Bees, comb, food, queens and keepers with mechanisms of their own. Nothing here knows how colonies
are scored, and the score sees of it only what the keepers wrote down.
"""
