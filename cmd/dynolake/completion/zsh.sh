# Completion of dynolake for zsh: the program itself is asked how the last word may go on.
_dynolake() {
  local -a found
  found=("${(@f)$("${words[@]:0:$CURRENT-1}" "${words[CURRENT]}" --generate-bash-completion 2>/dev/null)}")
  if [[ -n "${found[1]}" ]]; then
    compadd -Q -S '' -- "${(@M)found:#*=}"
    compadd -Q -- "${(@)found:#*=}"
  else
    _files
  fi
}
compdef _dynolake dynolake
