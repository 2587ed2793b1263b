"""Flask: requests in, one service called, responses out."""
