"""Draws concrete slabs with exactly known truth, for training, tests and sample pictures.

In comes a seed (and, for whole slabs, a plan in millimetres and a camera); out come a picture and
what is in it: crack edges, centrelines and widths, joints with their kind, spalls, slab region,
projection. The same seed gives the same bytes. Nothing outside training, tests and the sample
pictures may import it.
"""
