"""Text messages through a hosted gateway, by its SDK: the optional extra hosted-sms."""
