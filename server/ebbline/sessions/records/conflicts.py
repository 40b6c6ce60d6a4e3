"""What we say of records that are sound by themselves but don't fit what is held."""

DIFFERENT = "is held already with other content, which stays as it was"
CIRCULAR = "leads back to the record itself by what is held already"
DIFFERENT_LOG = (
    "its device has a log from the same file that was read in another way, which stays as it was; "
    "give this one another device"
)
ANOTHERS = "is of another device; a phone's key adds and corrects what that phone recorded"
