"""What is uncertain: marginals of single numbers and the joint distribution that ties them together.

Nothing here knows what the numbers mean. Everything is a function of standard normal scores ``z``, the
common currency of simulation, FORM and sensitivity measures.
"""
