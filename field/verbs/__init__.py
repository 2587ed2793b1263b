"""What each verb of the command line does: it reads the call, runs one service, and prints what that says."""
