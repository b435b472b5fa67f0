# Run by cpack before it packs. Manual pages are compressed as Debian wants them, and every file gets one time, so that
# the same sources make the same package.
file(GLOB pages "${CPACK_TEMPORARY_INSTALL_DIRECTORY}/usr/share/man/man*/*")
list(FILTER pages EXCLUDE REGEX "[.]gz$")
if(pages)
  execute_process(COMMAND gzip -9n ${pages} COMMAND_ERROR_IS_FATAL ANY)
endif()
if(DEFINED ENV{SOURCE_DATE_EPOCH})
  execute_process(COMMAND find "${CPACK_TEMPORARY_INSTALL_DIRECTORY}" -exec touch --no-dereference --date
                          "@$ENV{SOURCE_DATE_EPOCH}" {} + COMMAND_ERROR_IS_FATAL ANY)
endif()
