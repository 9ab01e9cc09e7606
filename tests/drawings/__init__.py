"""Line drawings whose parts are known, for measuring how well parts are found."""
