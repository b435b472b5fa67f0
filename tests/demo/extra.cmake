pkg_check_modules(modbus REQUIRED IMPORTED_TARGET libmodbus)
target_link_libraries(demo_tests PRIVATE PkgConfig::modbus)
