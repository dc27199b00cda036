"""Where do the samples stand on a plane, and is the plane more than chance?"""
