"""Where the page of the record gets its days from: the store of a watch, or a recorded home in a file."""
