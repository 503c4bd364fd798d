// What a page that judges by itself still asks before its form is signed alone: such a page puts a function here that
// takes the fields of a form and gives sentences; what is signed alone reads them.

export const asked = [];
