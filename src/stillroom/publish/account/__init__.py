"""The account: what a release may say in words, one true sentence after the other."""

from stillroom.publish.account.sentences import Kind, Sentence
from stillroom.publish.account.telling import SCHEMA, Account, account_of, write_account

__all__ = ["SCHEMA", "Account", "Kind", "Sentence", "account_of", "write_account"]
