"""Do the samples differ on a scale of steps?"""
