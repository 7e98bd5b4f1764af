"""Ground and water on layered profiles: stresses, strengths, pressures, and their exact integrals.

Everything here takes floats or arrays (one value a row) and broadcasts. Levels are in metres above the
site datum, positive upwards. Nothing here knows of probability, of mechanisms or of files.
"""
