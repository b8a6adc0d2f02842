// Package loan is the loan of a box by its memory card: the card is loaded with
// a session for a patient, and once the box is back its diary is merged into the
// clinic's, the patient's data is wiped from the card, and the card is looked
// through for traces of it. The clinic's diary also has the loan itself, from before the
// card says that it is lent until the box is back.
//
// Both may be cut off at any moment, by a card that is pulled out or a program
// that is killed: no session is lost, and the same call, made again, goes on.
//
// The record of the loan is the first file of a loan on the card and the last to
// go: it stays until the card is clean, so that a card on which traces were
// found is not lent, and is looked through again when it is brought back again.
package loan
