"""Every change, one function each, with ``by=``. Nothing else writes records."""
