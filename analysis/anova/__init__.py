"""Do the samples differ in their scores, and by how much?"""
