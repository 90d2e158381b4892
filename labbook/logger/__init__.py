"""Reads a device's lines on the computer beside a bench and sends them to the record.

It stands alone: the standard library, and pyserial for a serial port. Nothing read is lost: a
reading is on this computer's disk before it is sent, and stays there until the server has it.
"""
