"""A toolkit for outcome studies of ant foundings."""
