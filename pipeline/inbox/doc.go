// Package inbox looks into the folder in which logs arrive, and clears away what has been dealt with.
//
// Terms. A look is the list of all that lies in the folder, with size, time of change and identity of each file. A file is ready
// when two looks find it the same; one that differs is still being written, and waits. A run sheet that is still being
// written makes the logs below its folder wait, which it may be about. Refused is the folder in it for what cannot be used, each with
// its reason in NAME.reason.txt beside it; it is never looked into. What is neither a plain file nor a folder (a link out of the inbox, a
// pipe, a device) is barred: it is not opened, not even to see what it holds.
//
// Invariants. A file is removed or refused only as long as it is what was looked at: one that was changed or replaced since
// stays for the next time. Folders go when the last of their files that was dealt with has gone; the inbox itself stays. Hidden files and what
// programs keep while they copy or edit (.part, .tmp, ~$…) are let be.
//
// What a failure leaves behind: files that were not yet cleared away, which are dealt with again the next time, to no effect.
//
//	seen, err := inbox.Look(ctx, "lake/inbox", time.Second)
//	for _, f := range seen.Files { … }
//	err = seen.Take(d, "lake/inbox/log.csv")
package inbox
