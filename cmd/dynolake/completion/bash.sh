# Completion of dynolake for bash: the program itself is asked how the last word may go on.
_dynolake_completion() {
  local line words word
  line="${COMP_LINE:0:COMP_POINT}"
  word="${line##*[[:space:]]}"
  read -r -a words <<<"${line%"$word"}"
  local IFS=$'\n'
  mapfile -t COMPREPLY < <("${words[0]:-dynolake}" "${words[@]:1}" "$word" --generate-bash-completion 2>/dev/null)
  if [[ ${#COMPREPLY[@]} -eq 1 && ${COMPREPLY[0]} == *= ]]; then compopt -o nospace; fi
  # Bash puts in place only what follows the last = or : of the word.
  local cut="${word%"${word##*[=:]}"}"
  COMPREPLY=("${COMPREPLY[@]#"$cut"}")
}
complete -o default -F _dynolake_completion dynolake
