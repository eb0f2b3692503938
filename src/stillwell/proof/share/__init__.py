"""The protected share of the year: how probable is it that a hazard is told in time, in a home whose parts fail?"""
