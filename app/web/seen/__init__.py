"""What each form that two people may have open shows of its rows, so that nobody overwrites a colleague unseen."""
