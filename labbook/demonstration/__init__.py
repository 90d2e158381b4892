"""An invented laboratory, brought about through the same actions as the pages use.

``build.build`` makes it; `fixtures/demonstration/` says what it consists of.
"""
